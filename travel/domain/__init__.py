"""What there is and what comes out: frozen values, compared by value. Nothing here computes physics."""
