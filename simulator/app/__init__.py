"""Thin adapters: command line and web."""
