"""Arrays in, readings out: numpy and scipy, no files, no hardware, no screens."""
