"""The commands; the only floor that prints. Each command's module is loaded only when it is asked for."""
