//! Room 4: resamples each side of the seam into seam coordinates, with masks.
