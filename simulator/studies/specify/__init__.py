"""From a question to a specification: what to buy, set and mount, and how to check it."""
