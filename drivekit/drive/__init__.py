"""Mechanics of the drive: belt path, tension, loads, screws, shims; SI throughout, no statistics, no picture."""
