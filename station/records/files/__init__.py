"""The logs folder: what stands where, who uses it, and files that survive a power cut."""
