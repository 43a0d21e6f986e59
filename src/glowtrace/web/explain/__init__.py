"""Why the picture is as it is: the electron on its path, causes, and wrong accounts answered."""
