"""Can this lifting machine get from the gate to the pick point and back, which way, and how."""
