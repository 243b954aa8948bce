"""The program's version, where the records and the package's front door both find it."""

__version__ = "0.10.0"
#: The program as records, reports and sheets name it.
PROGRAM = f"thermsim {__version__}"
