"""Serial ports: bytes, lines and check sums on them, questions and answers."""
