SELECT count(*) FROM placed_incidents p WHERE p.is_open AND p.symptom = 'unknown'
