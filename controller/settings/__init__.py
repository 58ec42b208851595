"""Turn a site folder of TOML files into checked, frozen values; the only room that knows units."""
