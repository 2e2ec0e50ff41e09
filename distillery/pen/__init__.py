"""Who has the pen: enrolled PCs, PINs, keys and passes, the waits after wrong tries, the lock, and who typed what."""
