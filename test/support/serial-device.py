"""A serial device for tests: prints the name of its port, then sends on what comes in. It is pulled out at the end."""
import os
import pty
import sys
import tty

device, port = pty.openpty()
tty.setraw(port)
print(os.ttyname(port), flush=True)
os.close(port)
while chunk := os.read(sys.stdin.fileno(), 4096):
    os.write(device, chunk)
