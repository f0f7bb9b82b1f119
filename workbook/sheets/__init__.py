"""What a solved plan leaves behind as files: tables for programs, a sheet for the field, a page for the wall."""

from workbook.sheets.formats import FORMATS, Format

__all__ = ["FORMATS", "Format"]
