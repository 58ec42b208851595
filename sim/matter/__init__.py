"""What liquids and grains do by their nature: pH, conductivity, minerals, settling. No machine."""
