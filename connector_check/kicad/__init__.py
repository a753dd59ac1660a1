"""Reading KiCad's open files: symbols, footprints, boards."""
