"""What the cycle asks of each device, and the devices that need no wire to answer it."""
