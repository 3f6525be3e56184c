"""A specification as pages, web page, PDF and record."""
