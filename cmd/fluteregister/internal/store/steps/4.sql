-- Which lines of tools cannot be understood is found out when they are settled: those of which it was not known yet are settled again.
update subject s set settled = least(settled, b.understood) from bench b where b.bench = s.bench and starts_with(s.subject, 'tool:');
