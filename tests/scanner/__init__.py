"""How well and how fast the tablet's camera reads labels, over rendered pictures: `python -m tests.scanner`."""
