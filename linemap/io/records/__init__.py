"""Readers of what is recorded or planned: events, holds, tickets, receipts, punch items and plans."""
