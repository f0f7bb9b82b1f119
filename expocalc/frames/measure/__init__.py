"""Numbers from pixels: background, stars, noise, photon transfer; no plan is known here."""
