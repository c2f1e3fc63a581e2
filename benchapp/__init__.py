"""Seat & Cure: case, clock, geometry and proof for the technician who joins printed denture parts."""

__version__ = "0.1.0"
