-- The version of the tables is noted.
create table version (
  version integer not null
);
insert into version values (1);
do $$ begin
  grant select on version to fluteregister_taker;
exception when insufficient_privilege or undefined_object then
  raise notice 'no role is given anything: this role may not';
end $$;
