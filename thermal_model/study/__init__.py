"""Questions asked of many designs: sweeps, sensitivities, screening."""
