def settime():
    pass
