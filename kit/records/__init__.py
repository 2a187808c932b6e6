"""The store of raw readings: append-only, durable, and safe from any thread."""
