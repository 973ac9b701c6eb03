"""What hangs on serial ports: fixture, bias voltmeter, scanner, turntable."""
