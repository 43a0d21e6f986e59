"""What leaves the page for a class: pictures, clips and worksheets."""
