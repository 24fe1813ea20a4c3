"""A recorded run as files that other programs read: one file a format, named in EXPORTS."""

from server.export.csv_file import CSV
from server.export.flac_file import FLAC
from server.export.format import Export, ExportError, Wanted, What
from server.export.numpy_file import NPZ
from server.export.parquet_file import PARQUET

EXPORTS: tuple[Export, ...] = (CSV, PARQUET, NPZ, FLAC)

__all__ = ["EXPORTS", "Export", "ExportError", "Wanted", "What"]
