"""Compiled loops of the tracer."""
