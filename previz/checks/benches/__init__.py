"""Parts of `previz bench`: each a module with a function that measures and says what it got."""
