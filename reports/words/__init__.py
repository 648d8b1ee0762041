"""Every word a reader sees: sentences, numbers and languages."""
