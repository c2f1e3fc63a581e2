"""The walk without the PC in other browser engines: `python -m tests.engines`."""
