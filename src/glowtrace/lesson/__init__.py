"""A lesson: questions to learners, their answers, what the answers mean, what the audience sees."""
