"""Where the checkout and its ready cases lie."""

from pathlib import Path

ROOT = Path(__file__).parents[2]
CASES = ROOT / "cases"
