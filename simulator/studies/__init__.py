"""Orders the steps; repeats them."""
