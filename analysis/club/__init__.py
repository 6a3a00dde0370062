"""The shaft over time: what lines in the picture say, and how sure each answer is."""
