-- A person says which copy of a fork is the bench, and a fork is settled once the other goes on under another id, or is gone. What
-- was ruled on before that was said is settled.
alter table fork add column truth text not null default '', add column gone boolean not null default false, add column renewed text not null default '';
update fork set gone = true where ruled_at is not null;
create view unsettled as select * from fork where ruled_at is null or not gone and renewed = '';
create or replace view open.benches as
  select bench, label, plant, state, head_seq, head_sha256, seen, now() - seen as silent, told_seq - head_seq as behind, clock_ahead,
    (select count(*) from unsettled f where f.bench = b.bench) as forks
  from bench b;
do $$ begin
  grant select on unsettled to fluteregister_taker;
  grant update (truth, gone, renewed) on fork to fluteregister_taker;
exception when insufficient_privilege or undefined_object then
  raise notice 'no role is given anything: this role may not';
end $$;
