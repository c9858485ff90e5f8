STA_IF = 0


class WLAN:
    def __init__(self, interface):
        self._is_active = False
        self._is_connected = False

    def active(self, is_active):
        self._is_active = is_active

    def connect(self, name, password):
        self._is_connected = self._is_active

    def isconnected(self):
        return self._is_connected
