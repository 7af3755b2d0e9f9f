"""Codes a label carries: our lot code with its check character, retail article numbers, and what the QR says."""
