"""The software board: physical models of motors that speak the wire. It never imports the service."""
