"""One kit at many settings: what it asks, what it may not do, and its equations."""
