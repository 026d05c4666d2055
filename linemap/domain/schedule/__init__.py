"""How far the work is and when it ends: plan, daily figures, readiness and forecast."""
