"""The site: settings, addresses, and the server."""
