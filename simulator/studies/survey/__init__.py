"""A site of many cameras."""
