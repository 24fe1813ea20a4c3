"""The page's and the scripts' way in: HTTP and the live socket, on this computer only."""
