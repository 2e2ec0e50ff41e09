"""What one shift tells the next: notes as they are written, and the handover sheet that two people sign."""
