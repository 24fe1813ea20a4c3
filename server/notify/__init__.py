"""Alarms carried to where somebody sees them: an outbox on disk, and a worker for each receiver (NOTIFY.md)."""
