"""Camera: a camera on the real tube, with the computed line over its picture."""
