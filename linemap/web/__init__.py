"""The web server: pages and the JSON interface over the use cases."""
