import { ApolloDriver, type ApolloDriverConfig } from '@nestjs/apollo';
import { Module, type DynamicModule } from '@nestjs/common';
import { GraphQLModule } from '@nestjs/graphql';
import { AmendmentModule } from './modules/amendment/amendment.module.js';
import { BenchModule } from './modules/bench/bench.module.js';
import { CalibrationModule } from './modules/calibration/calibration.module.js';
import { CalibrationScopeModule } from './modules/calibration-scope/calibration-scope.module.js';
import { CertificateModule } from './modules/certificate/certificate.module.js';
import { DeviceModule } from './modules/device/device.module.js';
import { DryingImportModule } from './modules/drying-import/drying-import.module.js';
import { DueModule } from './modules/due/due.module.js';
import { FaultModule } from './modules/fault/fault.module.js';
import { FieldModule } from './modules/field/field.module.js';
import { InstrumentModule } from './modules/instrument/instrument.module.js';
import { JobModule } from './modules/job/job.module.js';
import { LabelModule } from './modules/label/label.module.js';
import { LabModule } from './modules/lab/lab.module.js';
import { LedgerModule } from './modules/ledger/ledger.module.js';
import { NoticeModule } from './modules/notice/notice.module.js';
import { LineModule } from './modules/line/line.module.js';
import { HydrationModule } from './modules/hydration/hydration.module.js';
import { OvenModule } from './modules/oven/oven.module.js';
import { PassportModule } from './modules/passport/passport.module.js';
import { PlaceModule } from './modules/place/place.module.js';
import { ProtocolModule } from './modules/protocol/protocol.module.js';
import { RecomputeModule } from './modules/recompute/recompute.module.js';
import { SampleModule } from './modules/sample/sample.module.js';
import { SecondFactorModule } from './modules/second-factor/second-factor.module.js';
import { ShareModule } from './modules/share/share.module.js';
import { SignatureModule } from './modules/signature/signature.module.js';
import { StoredFileModule } from './modules/stored-file/stored-file.module.js';
import { ThreadModule } from './modules/thread/thread.module.js';
import { SpectrumModule } from './modules/spectrum/spectrum.module.js';
import { TidyModule } from './modules/tidy/tidy.module.js';
import { TransferModule } from './modules/transfer/transfer.module.js';
import { ZoneModule } from './modules/zone/zone.module.js';
import { TokenModule } from './modules/token/token.module.js';
import { WaterModule } from './modules/water/water.module.js';
import { Announcer } from './platform/database/announcer.js';
import { Database } from './platform/database/database.js';
import { graphqlOptions } from './platform/graphql/graphql.options.js';
import { Sessions } from './platform/identity/sessions.js';
import { PlatformModule } from './platform/platform.module.js';
import { policies } from './policies.js';
import { tokenScopes } from './token-scopes.js';

@Module({})
export class AppModule {
  static of(database: Database, announcer: Announcer, ledgerKey?: string): DynamicModule {
    return {
      module: AppModule,
      imports: [
        PlatformModule.of(database, announcer, ledgerKey),
        GraphQLModule.forRootAsync<ApolloDriverConfig>({
          driver: ApolloDriver,
          inject: [Sessions],
          useFactory: (sessions: Sessions) => graphqlOptions(database, sessions, policies, tokenScopes),
        }),
        NoticeModule,
        LabModule,
        SecondFactorModule,
        TokenModule,
        SampleModule,
        PlaceModule,
        LabelModule,
        InstrumentModule,
        LineModule,
        HydrationModule,
        ProtocolModule,
        BenchModule,
        OvenModule,
        WaterModule,
        AmendmentModule,
        SignatureModule,
        StoredFileModule,
        CalibrationModule,
        CalibrationScopeModule,
        TransferModule,
        TidyModule,
        SpectrumModule,
        ShareModule,
        DeviceModule,
        PassportModule,
        CertificateModule,
        FieldModule,
        ZoneModule,
        ThreadModule,
        LedgerModule,
        RecomputeModule,
        FaultModule,
        DueModule,
        DryingImportModule,
        JobModule,
      ],
    };
  }
}
