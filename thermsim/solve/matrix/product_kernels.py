# numba infers the types of the compiled loops; their docstrings give shapes and units
# mypy: allow-untyped-defs, allow-untyped-decorators, allow-untyped-calls, allow-incomplete-defs
"""The compiled loops of products and eigenvalues, see :mod:`thermsim.solve.matrix.products` for why our own.

Arrays and numbers only.
"""

from __future__ import annotations

import math

import numpy as np

from thermsim.solve.compiled import compiled


@compiled
def product(a, b, out):
    """Add the product of a (m, k) and b (k, n) to out (m, n): four rows by four at a time, in strips."""
    rows, inner = a.shape[0], b.shape[0]
    strip = 512
    for start in range(0, b.shape[1], strip):
        stop = min(start + strip, b.shape[1])
        for i in range(0, rows - rows % 4, 4):
            one, two = out[i, start:stop], out[i + 1, start:stop]
            three, four = out[i + 2, start:stop], out[i + 3, start:stop]
            for k in range(0, inner - inner % 4, 4):
                b0, b1 = b[k, start:stop], b[k + 1, start:stop]
                b2, b3 = b[k + 2, start:stop], b[k + 3, start:stop]
                p0, p1, p2, p3 = a[i, k], a[i, k + 1], a[i, k + 2], a[i, k + 3]
                q0, q1, q2, q3 = a[i + 1, k], a[i + 1, k + 1], a[i + 1, k + 2], a[i + 1, k + 3]
                r0, r1, r2, r3 = a[i + 2, k], a[i + 2, k + 1], a[i + 2, k + 2], a[i + 2, k + 3]
                s0, s1, s2, s3 = a[i + 3, k], a[i + 3, k + 1], a[i + 3, k + 2], a[i + 3, k + 3]
                for j in range(one.size):
                    x0, x1, x2, x3 = b0[j], b1[j], b2[j], b3[j]
                    one[j] += p0 * x0 + p1 * x1 + p2 * x2 + p3 * x3
                    two[j] += q0 * x0 + q1 * x1 + q2 * x2 + q3 * x3
                    three[j] += r0 * x0 + r1 * x1 + r2 * x2 + r3 * x3
                    four[j] += s0 * x0 + s1 * x1 + s2 * x2 + s3 * x3
            for k in range(inner - inner % 4, inner):
                b0 = b[k, start:stop]
                for j in range(one.size):
                    x0 = b0[j]
                    one[j] += a[i, k] * x0
                    two[j] += a[i + 1, k] * x0
                    three[j] += a[i + 2, k] * x0
                    four[j] += a[i + 3, k] * x0
        for i in range(rows - rows % 4, rows):
            one = out[i, start:stop]
            for k in range(inner):
                b0 = b[k, start:stop]
                for j in range(one.size):
                    one[j] += a[i, k] * b0[j]


@compiled
def dots(a, b, out):
    """Put the scalar products of the rows of a (m, n) and b (k, n) into out (m, k)."""
    last = b.shape[0] - 1
    for i in range(a.shape[0]):
        left = a[i]
        for j in range(0, b.shape[0], 4):
            # where fewer than four are left the last stands in for the others
            j1, j2, j3 = min(j + 1, last), min(j + 2, last), min(j + 3, last)
            b0, b1, b2, b3 = b[j], b[j1], b[j2], b[j3]
            s0, s1, s2, s3 = 0.0, 0.0, 0.0, 0.0
            for k in range(left.size):
                value = left[k]
                s0 += value * b0[k]
                s1 += value * b1[k]
                s2 += value * b2[k]
                s3 += value * b3[k]
            out[i, j], out[i, j1], out[i, j2], out[i, j3] = s0, s1, s2, s3


@compiled
def eigen(z, d, e):
    """Eigenvalues of a small symmetric matrix into d (n,), its eigenvectors into the rows of z (n, n), that held it.

    Householder's reduction to a tridiagonal matrix, then QL steps with implicit shifts; ``e`` (n,) is scratch room.
    Source: J. H. Wilkinson and C. Reinsch, Handbook for Automatic Computation, vol. II, Linear Algebra (1971),
    procedures tred2 and imtql2 (from memory).
    """
    n = d.size
    # the vectors run along the rows, so that what is combined is contiguous: z is the transpose of the procedures'
    for i in range(n - 1, 0, -1):
        h, scale = 0.0, 0.0
        row = z[i]
        for k in range(i):
            scale += abs(row[k])
        if i == 1 or scale == 0.0:
            e[i] = row[i - 1]
        else:
            for k in range(i):
                row[k] /= scale
                h += row[k] * row[k]
            f = row[i - 1]
            g = -math.sqrt(h) if f >= 0.0 else math.sqrt(h)
            e[i] = scale * g
            h -= f * g
            row[i - 1] = f - g
            f = 0.0
            for j in range(i):
                g = 0.0
                for k in range(j + 1):
                    g += z[j, k] * row[k]
                for k in range(j + 1, i):
                    g += z[k, j] * row[k]
                e[j] = g / h
                f += e[j] * row[j]
            half = f / (h + h)
            for j in range(i):
                f = row[j]
                g = e[j] - half * f
                e[j] = g
                for k in range(j + 1):
                    z[j, k] -= f * e[k] + g * row[k]
            for j in range(i):
                z[j, i] = row[j] / h
        d[i] = h
    d[0] = 0.0
    e[0] = 0.0
    combined = np.empty(n)
    for i in range(n):
        if d[i] != 0.0:
            for j in range(i):
                combined[j] = 0.0
            for k in range(i):
                for j in range(i):
                    combined[j] += z[i, k] * z[k, j]
            for k in range(i):
                for j in range(i):
                    z[k, j] -= combined[j] * z[k, i]
        d[i] = z[i, i]
        z[i, i] = 1.0
        for j in range(i):
            z[j, i] = 0.0
            z[i, j] = 0.0
    for i in range(n):
        for j in range(i):
            z[i, j], z[j, i] = z[j, i], z[i, j]
    for i in range(1, n):
        e[i - 1] = e[i]
    e[n - 1] = 0.0
    for low in range(n):
        for _ in range(60):
            m = low
            while m < n - 1:
                size = abs(d[m]) + abs(d[m + 1])
                if abs(e[m]) <= 2.3e-16 * size:
                    break
                m += 1
            if m == low:
                break
            g = (d[low + 1] - d[low]) / (2.0 * e[low])
            r = math.sqrt(g * g + 1.0)
            g = d[m] - d[low] + e[low] / (g + (r if g >= 0.0 else -r))
            s, c, p = 1.0, 1.0, 0.0
            early = False
            for i in range(m - 1, low - 1, -1):
                f, b = s * e[i], c * e[i]
                r = math.sqrt(f * f + g * g)
                e[i + 1] = r
                if r == 0.0:
                    d[i + 1] -= p
                    e[m] = 0.0
                    early = True
                    break
                s, c = f / r, g / r
                g = d[i + 1] - p
                r = (d[i] - g) * s + 2.0 * c * b
                p = s * r
                d[i + 1] = g + p
                g = c * r - b
                upper, lower = z[i + 1], z[i]
                for k in range(n):
                    f = upper[k]
                    upper[k] = s * lower[k] + c * f
                    lower[k] = c * lower[k] - s * f
            if early:
                continue
            d[low] -= p
            e[low] = g
            e[m] = 0.0
