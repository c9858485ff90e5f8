"""The calls of umqtt.simple that the example makes, over a socket of CPython (MQTT 3.1.1)."""

import socket
import struct


class MQTTException(Exception):
    pass


def _string(text):
    data = text if isinstance(text, bytes) else text.encode()
    return struct.pack("!H", len(data)) + data


class MQTTClient:
    def __init__(self, client_id, server, port=0, user=None, password=None, keepalive=0):
        self.pid = 0
        self._id, self._address, self._user, self._password = client_id, (server, port or 1883), user, password
        self._keepalive = keepalive

    def set_last_will(self, topic, msg, retain=False, qos=0):
        self._will = (topic, msg, retain, qos)

    def connect(self, clean_session=True):
        topic, message, retain, qos = self._will
        flags = 0xC0 | 0x04 | clean_session << 1 | qos << 3 | retain << 5
        body = _string("MQTT") + bytes([4, flags]) + struct.pack("!H", self._keepalive)
        body += _string(self._id) + _string(topic) + _string(message) + _string(self._user) + _string(self._password)
        self._socket = socket.create_connection(self._address, 10)
        self._send(0x10, body)
        code = self._receive(4)[3]
        if code != 0:
            raise MQTTException(code)

    def publish(self, topic, msg, retain=False, qos=0):
        self.pid += 1
        number = struct.pack("!H", self.pid)
        self._send(0x30 | qos << 1 | retain, _string(topic) + number + msg)
        if self._receive(4) != b"\x40\x02" + number:
            raise MQTTException("another answer")

    def _send(self, kind, body):
        length, size = b"", len(body)
        while True:
            size, seven = divmod(size, 128)
            length += bytes([seven | 128 if size else seven])
            if not size:
                break
        self._socket.sendall(bytes([kind]) + length + body)

    def _receive(self, count):
        data = b""
        while len(data) < count:
            more = self._socket.recv(count - len(data))
            if not more:
                raise OSError(-1)
            data += more
        return data
