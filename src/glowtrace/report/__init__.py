"""What leaves the program: pictures for the dark room and for paper, tables, records."""
