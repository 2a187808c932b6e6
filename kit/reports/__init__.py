"""What is handed over: reports, findings as sentences, the measuring sheet."""
