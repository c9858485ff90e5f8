import os
import select


class DS18X20:
    def __init__(self, wire):
        self._value = None

    def scan(self):
        return [b"\x28\x03\x16\xa2\x79\x1e\xff\x00"]

    def convert_temp(self):
        if not select.select([0], [], [], 0)[0]:
            raise OSError("nothing answers on the wire")
        line = b""
        while not line.endswith(b"\n"):
            line += os.read(0, 1) or self._end()
        self._value = float(line)

    def _end(self):
        raise SystemExit

    def read_temp(self, rom):
        return self._value
