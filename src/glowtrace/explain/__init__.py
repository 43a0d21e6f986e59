"""Why the picture is as it is: forces, energies, frames of reference, causes, wrong accounts."""
