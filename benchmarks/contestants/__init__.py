"""The peers of ``benchmarks/peers.py``: one short file each, all solving the same jar from the same plain numbers."""
