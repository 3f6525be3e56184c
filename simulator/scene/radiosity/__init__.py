"""Light that bounces, and sky seen through what stands before it."""
