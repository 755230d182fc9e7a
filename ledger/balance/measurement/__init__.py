"""What a number is worth: every error source carried through the book, to the σ of each balance."""
