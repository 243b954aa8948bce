"""The verification against exact solutions, as lines of text and for machines."""

from __future__ import annotations

from thermsim.assess.verify.verification import Verification


def verification_table(verification: Verification) -> list[str]:
    """The verification as lines of text."""
    lines = [f"{'case':34s}{'quantity':47s}{'exact':>12s}{'computed':>12s}{'error':>11s}{'bound':>9s}"]
    for row in verification.rows:
        verdict = "" if row.passed else "  OUT OF BOUNDS"
        lines.append(
            f"{row.case:34s}{row.quantity:47s}{row.exact:12.5f}{row.computed:12.5f}{row.error:11.1e}{row.bound:9.1e} "
            f"{row.unit}{verdict}"
        )
    for study in (verification.space, verification.time):
        verdict = "" if study.passed else "  OUT OF BOUNDS"
        lines.append(
            f"{'observed order in ' + study.label:81s}{study.order:12.2f}   (wanted {study.low:g} to {study.high:g})"
            f"{verdict}"
        )
    lines.append("all within bounds" if verification.passed else "NOT all within bounds: do not rely on this version")
    return lines


def verification_record(verification: Verification) -> dict[str, object]:
    """The verification for machines."""
    return {
        "passed": verification.passed,
        "rows": [
            {
                "case": row.case,
                "quantity": row.quantity,
                "exact": row.exact,
                "computed": row.computed,
                "error": row.error,
                "bound": row.bound,
                "unit": row.unit,
                "passed": row.passed,
            }
            for row in verification.rows
        ],
        "observed_order": {study.label: study.order for study in (verification.space, verification.time)},
    }
