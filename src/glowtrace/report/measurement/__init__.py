"""Measurement reports: results on paper and as tables that can be redone."""
