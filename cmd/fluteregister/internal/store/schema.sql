-- The register's tables. Lengths are picometres, angles billionths of a degree, shares billionths: the ledger's own whole
-- numbers. The lines are the truth; inspection, finding, tool and unread are made from them and can be made again.
--
-- Fit for being spread over several servers by bench: every primary key of a table with a bench begins with it, there is no
-- other unique key and no foreign key, and taking lines touches one bench.

create table version (                      -- of these tables: one row
  version integer not null
);
insert into version values (4);

create table bench (                        -- a row a bench; its lock is the order of its lines
  bench text collate "C" primary key check (bench ~ '^[a-f][0-9a-f]{15}$'),
  label text not null default '',
  plant text not null default '',
  state text not null default 'open' check (state in ('open', 'forked', 'closed')),
  continues text,                           -- the id that it had before a fork
  head_seq bigint not null default 0,
  head_sha256 text not null default '',
  counter bigint not null default 0,
  segment bigint not null default 0,        -- where the last line stands, and how far its append is
  segment_end bigint not null default 0,
  more bigint not null default 0,
  whole bigint not null default 0,          -- the last line of the last append that is here as a whole: what is behind does not count yet
  understood bigint not null default 0,     -- up to here it is known which lines are unread, but for those of tools: of them up to where they are settled
  since timestamptz not null default now(),
  seen timestamptz,                         -- when it last asked or sent
  told_seq bigint,                          -- the end of its own chain, as it last said
  clock_ahead interval                      -- of the bench's clock, as it last said
);

create table token (
  sha256 text primary key,                  -- of the token, which is random
  bench text collate "C",                   -- null until its first use
  reads boolean not null default false,     -- it is no bench's: it may read everything, and send nothing
  label text not null default '',
  plant text not null default '',
  since timestamptz not null default now(),
  until timestamptz
);

create table line (                         -- the truth
  bench text collate "C" not null,
  seq bigint not null,
  counter bigint not null,
  kind text collate "C" not null,
  subject text collate "C" not null,
  utc timestamptz not null,                 -- by the bench's clock; nothing is ordered by it
  arrived timestamptz not null default now(),
  sha256 bytea not null,
  codec smallint not null default 0,        -- 0: raw is as it is; n: by flate with dictionary n, once it is old
  raw bytea compression lz4 not null,       -- the line as it stands in the ledger, with its LF
  primary key (bench, seq)
) partition by hash (bench);
create index line_subject on line (subject, bench, seq) where subject <> '';
do $$ begin
  for i in 0..15 loop
    execute format('create table line_%s partition of line for values with (modulus 16, remainder %s)', i, i);
  end loop;
end $$;

create table dictionary (                   -- what old lines are compressed with
  codec smallint primary key,
  text bytea not null
);

create table subject (                      -- what there are lines of; of tools, up to where they are settled
  bench text collate "C" not null,
  subject text collate "C" not null,
  seq bigint not null,                      -- the newest line of it
  settled bigint not null default 0,        -- what is made of the lines has all up to here
  primary key (bench, subject)
);
create index subject_subject on subject (subject);
create index subject_unsettled on subject (subject) where settled < seq;

create table inspection (                   -- a closed inspection as it stands
  bench text collate "C" not null,
  seq bigint not null,                      -- of its summary
  readings_seq bigint not null,
  records integer not null,                 -- how many it is made of: its summary, corrections and rulings
  counter bigint not null,                  -- of its summary: order
  inspection text not null,
  tool text collate "C" not null,
  job text not null,
  stage text not null,
  opened text not null,
  closed text not null,                     -- RFC 3339, by the bench's clock
  clock_set boolean not null,
  inspector text not null,
  wheel text not null,
  grinder text not null,
  verdict text not null,
  work text not null,                       -- what it calls for, with commas between
  practice boolean not null,
  given_up text not null,                   -- why
  revision text not null,
  material text not null,
  nominal_pm bigint not null,
  flutes integer not null,
  divisions integer not null,
  tir_pm bigint, tir_most_pm bigint, tir_gauge text not null,
  residual_pm bigint, share_ppb bigint, diameter_pm bigint, relief_ndeg bigint,
  standing text not null,                   -- of its tool
  corrected_by text not null, conflict boolean not null,
  ruling text not null, ruled_by text not null, ruled_at text not null, ruled_why text not null,
  primary key (bench, seq)
);
create index inspection_tool on inspection (tool, counter desc);
create index inspection_wheel on inspection (wheel, closed) where wheel <> '';
create index inspection_job on inspection (job) include (bench, tool, stage, verdict) where job <> '';
create index inspection_id on inspection (inspection);
create index inspection_closed on inspection (closed);

create table finding (
  bench text collate "C" not null,
  seq bigint not null,
  n smallint not null,
  feature text not null,
  flute smallint not null,                  -- 0 for none
  from_end_pm bigint,
  quantity text check (quantity in ('length', 'angle', 'share')),
  value bigint, uncertainty bigint, least bigint, most bigint,
  advice boolean not null,
  verdict text not null,
  rule text not null,
  probability float8,
  source text not null,
  primary key (bench, seq, n)
);

create table tool (                         -- a tool as it stands, under the bench that recorded of it last
  bench text collate "C" not null,
  tool text collate "C" not null,
  seq bigint not null,                      -- that bench's newest record of it
  counter bigint not null,                  -- of that
  benches integer not null,                 -- how many have recorded of it
  standing text not null,
  decided_bench text not null, decided_seq bigint not null,
  inspection text not null,                 -- that decides
  work text not null,                       -- what that calls for, with commas between
  lacks text not null,
  job text not null, away text not null, retired text not null,
  material text not null,
  flutes integer not null,                  -- 0 where no record says what the tool is
  nominal_pm bigint not null,
  last_diameter_pm bigint,
  wheel text not null,
  unclear text not null,                    -- why it could not be told whole
  primary key (bench, tool)
);
create index tool_tool on tool (tool);
create index tool_standing on tool (standing);

create table fork (
  bench text collate "C" not null,
  seq bigint not null,                      -- of the first line that differs
  ours text not null,
  theirs text not null,
  raw bytea not null,                       -- the line that was refused
  address text not null,
  since timestamptz not null default now(),
  ruled_by text not null default '', ruled_why text not null default '', ruled_at timestamptz,
  truth text not null default '',           -- which copy is the bench: here, or refused; '' until a person says
  gone boolean not null default false,      -- the refused copy is destroyed
  renewed text not null default '',         -- the id that the refused copy goes on under
  primary key (bench, seq, theirs)
);

create table unread (                       -- lines that were taken, and of which it cannot be told what they mean
  bench text collate "C" not null,
  seq bigint not null,
  why text not null,
  primary key (bench, seq)
);

create view unsettled as select * from fork where ruled_at is null or not gone and renewed = '';

-- What other programs read.
create schema open;
create view open.benches as
  select bench, label, plant, state, head_seq, head_sha256, seen, now() - seen as silent, told_seq - head_seq as behind, clock_ahead,
    (select count(*) from unsettled f where f.bench = b.bench) as forks
  from bench b;
create view open.inspections as
  select i.*, b.label, b.plant, i.nominal_pm / 1e9 as nominal_mm, i.tir_pm / 1e9 as tir_mm, i.tir_most_pm / 1e9 as tir_most_mm,
    i.diameter_pm / 1e9 as diameter_mm, i.share_ppb / 1e9 as share, i.relief_ndeg / 1e9 as relief_deg
  from inspection i join bench b using (bench);
create view open.findings as
  select f.*, i.inspection, i.tool, i.stage, i.closed,
    case quantity when 'length' then 'mm' when 'angle' then 'deg' when 'share' then '1' end as unit,
    f.value / 1e9 as figure, f.least / 1e9 as least_figure, f.most / 1e9 as most_figure
  from finding f join inspection i using (bench, seq);
create view open.tools as
  select t.*, b.label, b.plant, t.nominal_pm / 1e9 as nominal_mm, t.last_diameter_pm / 1e9 as last_diameter_mm from tool t join bench b using (bench);

-- Who may what, where the role that sets this up may say so: the register's program may never change or delete a line.
do $$ begin
  if not exists (select from pg_roles where rolname = 'fluteregister_taker') then create role fluteregister_taker nologin; end if;
  if not exists (select from pg_roles where rolname = 'fluteregister_reader') then create role fluteregister_reader nologin; end if;
  grant fluteregister_taker to current_user;
  grant usage on schema public, open to fluteregister_taker;
  grant usage on schema open to fluteregister_reader;
  grant select on all tables in schema open to fluteregister_reader, fluteregister_taker;
  grant select on all tables in schema public to fluteregister_taker;
  grant insert on line, fork to fluteregister_taker;
  grant update (ruled_by, ruled_why, ruled_at, truth, gone, renewed) on fork to fluteregister_taker;
  grant insert, update on bench, token, subject to fluteregister_taker;
  grant insert, update, delete on inspection, finding, tool, unread to fluteregister_taker;
exception when insufficient_privilege then
  raise notice 'no roles are made: this role may not make any';
end $$;
