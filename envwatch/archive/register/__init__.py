"""The register from and to CSV, edited, searched, redacted."""
