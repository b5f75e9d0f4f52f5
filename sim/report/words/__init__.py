"""Numbers and sentences, the same on the page and in the terminal."""
