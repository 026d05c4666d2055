"""Arrays in, arrays out: azimuths, stations, spans, frames, map projections and uncertainty."""
