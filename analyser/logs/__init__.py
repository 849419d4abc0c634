"""Recorded flights in, :class:`~analyser.logs.track.Track` out: one module per file format."""
