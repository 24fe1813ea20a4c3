"""Two runs beside each other: their starts from one moment on, and what differs beyond both uncertainties."""
