"""The seating check: what the meshes of base and arch tell before any resin is opened. Bytes in, dataclasses out."""
