# numba infers the types of the compiled loops; their docstrings give shapes and units
# mypy: allow-untyped-defs, allow-untyped-decorators, allow-untyped-calls, allow-incomplete-defs
"""The compiled loops of a reduced basis, and products of arrays. Arrays and numbers only."""

from __future__ import annotations

import math

import numpy as np

from thermsim.solve.kernels import compiled, inlined
from thermsim.solve.matrix_kernels import conduct, solve_some


@inlined
def remove(vectors, count, new):
    """Take from a vector what it has in common with the first ``count``; returns the square of what is left.

    Four vectors at a time, so that the new one is fetched less often.
    """
    for k in range(0, count - count % 4, 4):
        a, b, c, d = vectors[k], vectors[k + 1], vectors[k + 2], vectors[k + 3]
        of_a, of_b, of_c, of_d = 0.0, 0.0, 0.0, 0.0
        for i in range(new.size):
            value = new[i]
            of_a += a[i] * value
            of_b += b[i] * value
            of_c += c[i] * value
            of_d += d[i] * value
        for i in range(new.size):
            new[i] -= of_a * a[i] + of_b * b[i] + of_c * c[i] + of_d * d[i]
    for k in range(count - count % 4, count):
        old = vectors[k]
        dot = 0.0
        for i in range(new.size):
            dot += old[i] * new[i]
        for i in range(new.size):
            new[i] -= dot * old[i]
    left = 0.0
    for i in range(new.size):
        left += new[i] * new[i]
    return left


@compiled
def grow(factors, banded, dissected, root, heads, vectors, count, begun):
    """Let a rational Krylov basis grow by rounds, each of all shifts in turn.

    Parameters
    ----------
    factors, banded, dissected
        Cholesky factors of K + shift C for each shift, (k, ...), see
        :func:`thermsim.solve.matrix_kernels.factorise`.
    root, heads, vectors, count
        As of :func:`step`, with room for as many more vectors as there are heads, shifts and rounds.
    begun : (m,) of int
        Receives how many vectors there were as each round began.

    Returns
    -------
    count : int
        Vectors now.
    """
    for turn in range(begun.size):
        begun[turn] = count
        for shift in range(factors.shape[0]):
            count = step(factors[shift], banded, dissected, root, heads, vectors, count)
    return count


@inlined
def step(factors, banded, dissected, root, heads, vectors, count):
    """Add vectors to a rational Krylov basis: of every head (C^-1 K + shift)^-1 times it, made orthonormal.

    Parameters
    ----------
    factors, banded, dissected
        Cholesky factor of K + shift C, as of :func:`thermsim.solve.matrix_kernels.factorise`.
    root : (n,)
        Square roots of C; vectors are C^(1/2) times fields.
    heads : (p,) of int
        Which vectors to go on from; replaced by the new ones, or by the same where nothing new came out.
    vectors : (room, n)
        The basis by rows; ``count`` of them are used. There must be room for as many more as there are heads.

    Returns
    -------
    count : int
        Vectors now.
    """
    n, first = root.size, count
    for p in range(heads.size):
        new, head = vectors[first + p], vectors[heads[p]]
        for i in range(n):
            new[i] = root[i] * head[i]
    solve_some(factors, banded, dissected, vectors[first : first + heads.size])
    for p in range(heads.size):
        solved, new = vectors[first + p], vectors[count]
        before = 0.0
        for i in range(n):
            new[i] = solved[i] * root[i]
            before += new[i] * new[i]
        after = before
        for _ in range(3):  # twice is enough, but for vectors that hold hardly anything new
            last = after
            after = remove(vectors, count, new)
            if after > 0.25 * last:
                break
        if after > 1e-22 * before:
            scale = 1.0 / math.sqrt(after)
            for i in range(n):
                new[i] *= scale
            heads[p] = count
            count += 1
    return count


@compiled
def project(before, after, conductance, exchange, root, vectors, flows):
    """Put C^(-1/2) K C^(-1/2) times the vectors (m, n) into ``flows`` (m, n); K by pairs of nodes."""
    x = np.empty(root.size)
    for k in range(vectors.shape[0]):
        flow = flows[k]
        for i in range(x.size):
            x[i] = vectors[k, i] / root[i]
        conduct(before, after, conductance, exchange, x, flow)
        for i in range(x.size):
            flow[i] /= root[i]


@compiled
def decay(rates, ones, knots, medium, start, at_knots, gathered):
    """Follow modes through a stage exactly: da/dt = -rate a - ones dT_medium/dt, the medium linear between knots.

    ``at_knots`` (m, modes) receives a at each knot, ``gathered`` (modes,) its integral over the stage.
    """
    for k in range(rates.size):
        value, total, rate = start[k], 0.0, rates[k]
        at_knots[0, k] = value
        for piece in range(knots.size - 1):
            h = knots[piece + 1] - knots[piece]
            x = rate * h
            kept = math.exp(-x)
            # (1 - e^-x)/x and (1 - that)/x
            one = -math.expm1(-x) / x if x > 1e-12 else 1.0 - x / 2.0
            two = (1.0 - one) / x if x > 1e-3 else 0.5 - x / 6.0 + x * x / 24.0
            drive = ones[k] * (medium[piece + 1] - medium[piece])
            total += h * (one * value - two * drive)
            value = kept * value - one * drive
            at_knots[piece + 1, k] = value
        gathered[k] = total


@compiled
def follow(rates, ones, settled_from, knots, medium, at_knots, time, piece, out, change, course):
    """Look at what :func:`decay` follows between its knots.

    Parameters
    ----------
    rates, ones : (modes,)
        As of :func:`decay`.
    settled_from : float
        Modes that decay faster [1/s] count as settled: without what lasts but an instant after a jump.
    knots, medium, at_knots : (m,), (m,), (m, modes)
        As of :func:`decay`.
    time, piece : (n,)
        When to look [s], and behind which knot each of these times lies.
    out, change : (n, modes)
        Receive the modes' coordinates and their rates of change.
    course : (n, 2)
        Receives the medium's temperature [degC] and its rate [K/s].
    """
    for i in range(time.size):
        p = piece[i]
        length = knots[p + 1] - knots[p]
        since, climb = time[i] - knots[p], medium[p + 1] - medium[p]
        course[i, 0], course[i, 1] = medium[p] + since / length * climb, climb / length
        slope = climb / length
        for k in range(rates.size):
            rate = rates[k]
            if rate > settled_from:
                value = -slope * ones[k] / rate
            else:
                x = rate * since
                kept = math.exp(-x)
                # the time that the medium's slope has acted for: (1 - e^-x)/rate
                acted = (1.0 - kept) / rate if x > 1e-3 else since * (1.0 - x / 2.0 + x * x / 6.0)
                value = kept * at_knots[p, k] - acted * slope * ones[k]
            out[i, k], change[i, k] = value, -rate * value - slope * ones[k]


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
def carry(fields, rows, columns, factor, first_r, along_r, first_z, along_z, out):
    """Interpolate fields to a finer grid and add them, times a factor, to ``out`` (m, A, B).

    Parameters
    ----------
    fields : (m, ., .)
        Of the coarser grid, or of one that has its nodes among its own.
    rows, columns : (a,), (b,) of int
        Where the coarser grid's nodes stand among those of ``fields``.
    factor : float
    first_r, along_r, first_z, along_z : (A,), (A, k), (B,), (B, l)
        Few weights each way, from a first node of the coarser grid on.
    """
    between, old = np.empty((rows.size, first_z.size)), np.empty(columns.size)
    for m in range(fields.shape[0]):
        for i in range(rows.size):
            row = between[i]
            for j in range(columns.size):
                old[j] = factor * fields[m, rows[i], columns[j]]
            for j in range(first_z.size):
                total = 0.0
                for k in range(along_z.shape[1]):
                    total += along_z[j, k] * old[first_z[j] + k]
                row[j] = total
        for i in range(first_r.size):
            new = out[m, i]
            for k in range(along_r.shape[1]):
                weight = along_r[i, k]
                if weight != 0.0:
                    row = between[first_r[i] + k]
                    for j in range(new.size):
                        new[j] += weight * row[j]


@compiled
def carry_to(fields, first_r, along_r, first_z, along_z, rows, columns, out):
    """Interpolate fields (m, a, b) to some nodes of a finer grid, by their numbers (p,): ``out`` (m, p)."""
    for m in range(fields.shape[0]):
        for p in range(rows.size):
            i, j = rows[p], columns[p]
            total = 0.0
            for k in range(along_r.shape[1]):
                part = 0.0
                for q in range(along_z.shape[1]):
                    part += along_z[j, q] * fields[m, first_r[i] + k, first_z[j] + q]
                total += along_r[i, k] * part
            out[m, p] = total


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
