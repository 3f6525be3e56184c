"""The studies as functions, and results that save and show themselves; `simulator` exports them."""
